"""Made-up cases: the same ones in every run, and never a clock against them."""

from hypothesis import settings

settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("explore", deadline=None, max_examples=1000)
settings.load_profile("same")
