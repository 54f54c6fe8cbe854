"""The virtual bench: an engine, its alternator and two instruments, as bytes on ports.

A process of its own (``python -m drivers.bench``), or in-process with time
in the caller's hands (:class:`drivers.bench.model.Bench`). It shares no code
with what reads instruments, and knows nothing of the core.
"""
