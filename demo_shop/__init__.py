"""An invented shop in an invented town, and a generator of its trading days."""

from demo_shop.play import Demo, make_demo

__all__ = ["Demo", "make_demo"]
