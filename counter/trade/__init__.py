"""The rules of the trade as pure values: no file, no clock, no screen."""
