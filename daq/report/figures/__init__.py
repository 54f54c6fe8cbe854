"""The plots of a report. Only what draws is imported lazily by those who call it."""
