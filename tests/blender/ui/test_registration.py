"""What the extension takes from Blender it gives back, also when it fails half-way."""

import bpy
import pytest

import addon
from addon import ui
from addon.ui import registration

pytestmark = pytest.mark.usefixtures("extension")

KINDS = (bpy.types.Operator, bpy.types.Panel, bpy.types.PropertyGroup, bpy.types.AddonPreferences, bpy.types.UIList)
OWNERS = (bpy.types.Scene, bpy.types.Object, bpy.types.Collection, bpy.types.WindowManager, bpy.types.Material)


def _taken() -> set[str]:
    classes = {
        cls.__qualname__ for kind in KINDS for cls in kind.__subclasses__() if cls.__module__.startswith("addon.")
    }
    registered = {name for name in classes if getattr(bpy.types, name, None)}
    properties = {
        f"{owner.__name__}.{prop.identifier}" for owner in OWNERS for prop in owner.bl_rna.properties if prop.is_runtime
    }
    handlers = {
        f"{name}: {function.__name__}"
        for name in dir(bpy.app.handlers)
        if isinstance(listed := getattr(bpy.app.handlers, name), list)
        for function in listed
        if function.__module__.startswith("addon.")
    }
    return registered | properties | handlers


def test_off_leaves_nothing_and_on_brings_all_back():
    on = _taken()
    addon.unregister()
    off = _taken()
    assert off < on
    addon.register()
    assert _taken() == on


def test_off_twice_is_harmless():
    addon.unregister()
    addon.unregister()


def test_a_failure_half_way_gives_back_what_was_taken(monkeypatch: pytest.MonkeyPatch):
    from addon import ui

    addon.unregister()
    off = _taken()
    registered, given_back = [], []
    monkeypatch.setattr(ui, "register", lambda: registered.append("ui"))
    monkeypatch.setattr(ui, "unregister", lambda: given_back.append("ui"))

    def refuse(*_arguments):
        raise ValueError("the word is taken")

    monkeypatch.setattr(bpy.utils, "register_cli_command", refuse)
    with pytest.raises(ValueError, match="the word is taken"):
        addon.register()
    assert registered == given_back == ["ui"]
    assert _taken() == off


def test_registering_twice_over_leaves_nothing(settings):
    properties = ((bpy.types.Scene, "playworn"), (bpy.types.Object, "playworn_deltas"))
    everything = [*registration.CLASSES, *properties]

    def left() -> list:
        classes = [cls for cls in registration.CLASSES if cls.is_registered]
        return classes + [pair for pair in properties if hasattr(*pair)]

    assert left() == everything
    for _ in range(2):
        ui.unregister()
        assert left() == []
        assert not [name for name in dir(bpy.types) if "playworn" in name.lower()]
        ui.unregister()
        ui.register()
        assert left() == everything


def test_a_failed_registration_takes_everything_back(settings, monkeypatch):
    ui.unregister()
    monkeypatch.setattr(registration, "CLASSES", (*registration.CLASSES, registration.CLASSES[0]))
    with pytest.raises(ValueError, match="already registered"):
        ui.register()
    assert not hasattr(bpy.types, "PLAYWORN_PT_build")
    assert not hasattr(bpy.types.Object, "playworn_deltas")
    monkeypatch.undo()
    ui.register()
