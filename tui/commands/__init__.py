"""One command a module: ``NAME``, ``HELP``, ``DESCRIPTION``, ``configure(parser)``, ``execute(arguments)``.

A module imports at its top only what is quick; the rest where the command runs.
"""
