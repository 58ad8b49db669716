"""The demo: a breakwater lighthouse made by code, exported like CAD, and put through the tool like any user's build."""
