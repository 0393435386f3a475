"""``python -m service.cli`` is ``graftstage``, for where the package is not installed."""

import sys

from service.cli.main import main

sys.exit(main())
