"""`python -m diagnose`."""

from diagnose.cli.main import main

main()
