"""The command line over ``fake_measuring``, as a process of its own that can be killed."""

import sys

from app.main import main
from tests.app.fake_measuring import MEASURING

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], measuring=MEASURING))
