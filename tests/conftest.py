"""Settings for every test: on the build machine hypothesis tries the same examples every time, elsewhere new ones."""

import os

from hypothesis import settings

settings.register_profile("build", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("bench", deadline=None, print_blob=True)
settings.load_profile("build" if os.environ.get("CI") else "bench")
