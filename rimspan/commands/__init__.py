"""What each command does; the command line itself is :mod:`rimspan.cli`."""
