"""``python -m ringwright`` is the command ``ringwright``."""

from ringwright.cli import main

main()
