"""How much the tests try: a sample that is enough every day, or as much as `make soak` asks for."""

import os
from typing import Final

TIMES: Final = int(os.environ.get("ROOMCUE_SOAK", "0"))
"""0: the everyday sample; n: n times the large one."""


def sample(everyday: int, large: int) -> int:
    """Say how many cases to try."""
    return large * TIMES if TIMES else everyday
