"""The commands: the only place that reads arguments, opens files for people and writes them.

`command_group` finds a command and loads only what it stands on. Status 0: all is well; 1: problems
were found; 2: the input is unusable. May import everything below it.
"""
