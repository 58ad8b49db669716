"""The steps from a .dae to objects: the document, its tree of nodes, its shapes, its effects. Needs pycollada."""
