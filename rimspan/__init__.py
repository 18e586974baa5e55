"""Commands, client file, sheets and screens around the measurement."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("rimspan")
except PackageNotFoundError:  # run from a checkout that was never installed
    __version__ = "0+unknown"
