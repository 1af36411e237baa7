"""Judge from console text whether a power-supply or fan replacement in a live switch is good."""

__version__ = "0.1.0"
