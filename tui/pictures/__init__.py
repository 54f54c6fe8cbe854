"""Pictures of the program, made by the program from recordings, so that they can be made anew at any time."""
