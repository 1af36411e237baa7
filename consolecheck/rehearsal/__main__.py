"""`python -m consolecheck.rehearsal`."""

import sys

from consolecheck.rehearsal.serve import main

sys.exit(main())
