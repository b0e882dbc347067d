"""What the use of a mechanism means for its life: group, load spectrum, safe working period, wear, motor heat.

Tables are data with source and confidence (duty.groups.CONFIDENCES); none of the standards' full texts was at hand.
k is the cubic mean of the load ratio, km = k^3 the spectrum factor; hours of full load only ever come from km.
"""
