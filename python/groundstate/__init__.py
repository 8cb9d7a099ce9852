"""From flame atomic absorption readings to concentrations that stand up in an audit."""

from groundstate._core import __version__

__all__ = ["__version__"]
