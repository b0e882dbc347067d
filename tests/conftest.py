"""What holds for all tests."""

from hypothesis import settings

# how long an example takes says how busy the machine is, nothing about the program
settings.register_profile("eventlens", deadline=None)
settings.load_profile("eventlens")
