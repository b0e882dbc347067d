"""`python -m eventlens.cli`: the same as the command `eventlens`."""

from eventlens.cli import main

main()
