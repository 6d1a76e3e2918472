"""The recipe graph: who draws what, and how far ahead a run must look."""
