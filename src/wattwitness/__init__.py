"""Find out, and show, whether the watts a stationary bike displays can be trusted."""

__version__ = "0.1.0"
