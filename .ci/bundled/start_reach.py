"""`reach`, as the program of a folder that PyInstaller made; it is also the process behind `reach-desk` and behind its helpers."""

import os
import sys

import surroundings

from reach.base import afresh

surroundings.put_back(os.environ)
if sys.argv[1:2] == ["--from-menu"]:
    from reach.cli.desk import from_menu

    del sys.argv[1]
    from_menu()
elif not afresh.served():
    from reach.cli import main

    main()
