"""The panel in the 3D view's sidebar, its properties and its operators."""

from .registration import register, unregister

__all__ = ["register", "unregister"]
