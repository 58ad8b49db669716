"""What a panel shows, without a window: a layout that draws nothing and checks every call."""

from types import SimpleNamespace

import bpy


class FakeLayout:
    """A layout that draws nothing and checks every call against Blender's own description of UILayout."""

    functions = bpy.types.UILayout.bl_rna.functions
    icons = frozenset(functions["label"].parameters["icon"].enum_items.keys())
    nested = frozenset({"row", "column", "box", "split", "column_flow", "grid_flow"})

    def __init__(self, drawn: list | None = None):
        self.__dict__["drawn"] = [] if drawn is None else drawn

    def __setattr__(self, name, value):
        assert name in bpy.types.UILayout.bl_rna.properties, name

    def __getattr__(self, name):
        assert name in self.functions, f"UILayout.{name}"
        return lambda *given, **named: self.call(name, given, named)

    def call(self, name, given, named):
        described = self.functions[name].parameters
        assert set(named) <= set(described.keys()), (name, named)
        assert named.get("icon", "NONE") in self.icons, named
        if name == "prop":
            data, prop = given
            assert prop in data.bl_rna.properties, prop
            assert data.bl_rna.properties[prop].description
            getattr(data, prop)
            self.drawn.append(prop)
        elif name == "operator":
            module, function = given[0].split(".")
            assert function in dir(getattr(bpy.ops, module)), given
            self.drawn.append(given[0])
            return SimpleNamespace()  # its properties
        elif name == "operator_menu_enum":
            operator, choices = given
            module, function = operator.split(".")
            assert choices in getattr(getattr(bpy.ops, module), function).get_rna_type().properties, given
            self.drawn.extend((operator, named["text"]))
            return SimpleNamespace()
        elif name == "label":
            self.drawn.append(named["text"])
        return type(self)(self.drawn) if name in self.nested else None


class FakePanel:
    def __init__(self, panel):
        self.panel, self.layout = panel, FakeLayout()

    def __getattr__(self, name):
        attribute = getattr(self.panel, name)
        return attribute.__get__(self) if callable(attribute) else attribute


def drawn(panel) -> list[str]:
    """What a panel shows now: properties, operators and words, in order; nothing where it is not shown at all."""
    if hasattr(panel, "poll") and not panel.poll(bpy.context):
        return []
    fake = FakePanel(panel)
    panel.draw(fake, bpy.context)
    return fake.layout.drawn
