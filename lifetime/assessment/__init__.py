"""The one orchestrator: a loaded study in, a frozen result out; no files, no clock, no chance."""
