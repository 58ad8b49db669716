"""Playworn, as Blender finds it: the tool itself is in addon/ and is imported only once it is switched on."""


def register() -> None:
    """Switch the extension on."""
    _require_numpy()
    from . import addon

    addon.register()


def unregister() -> None:
    """Switch the extension off."""
    from . import addon

    addon.unregister()


def _require_numpy() -> None:
    # Some Linux distributions build Blender on a system Python that comes without it.
    try:
        import numpy  # noqa: F401  only its presence matters here
    except ImportError:
        raise RuntimeError(
            "Playworn needs numpy, which this Blender's Python does not have: "
            "install the package python3-numpy, then switch the extension on again."
        ) from None
