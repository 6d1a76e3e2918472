"""How laws are tried: the same few examples every time, or more and new ones (profile `search`)."""

from hypothesis import settings

settings.register_profile("same", deadline=None, derandomize=True, max_examples=40)
settings.register_profile("search", deadline=None)
settings.load_profile("same")
