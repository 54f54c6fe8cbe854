"""From a snapshot of a run to the words, numbers and bands a screen shows; no screen in it."""
