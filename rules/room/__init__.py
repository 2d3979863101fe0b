"""From a room file's nodes to the compiled Room: models, checks, physics.

`load` turns text into a Room, or raises all findings at once. This package imports from
`rules.text`. To add a section, write its model in one of the `*_sections` modules and list it in
`schema`, write its checks in `checks` or `physics`, and compile it in `build`.
"""
