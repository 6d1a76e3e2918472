"""How laws are tried: the same examples every time, or new ones with `pytest --hypothesis-profile=search`."""

from hypothesis import settings

settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None)
settings.load_profile("same")
