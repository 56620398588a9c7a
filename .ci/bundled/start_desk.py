"""`reach-desk`, as the program of a folder that PyInstaller made: what a double-click opens. Small, for all else is in `reach`."""

import os
import subprocess
import sys

import surroundings

program = os.path.join(os.path.dirname(sys.executable), "reach" + os.path.splitext(sys.executable)[1])
order = [program, "--from-menu", *sys.argv[1:]]
surroundings.put_back(os.environ)
told = {**os.environ, "PYINSTALLER_RESET_ENVIRONMENT": "1"}  # so that the other program looks for its libraries itself
if sys.platform == "win32":
    subprocess.Popen(order, env=told, creationflags=subprocess.CREATE_NO_WINDOW)
else:
    os.execve(program, order, told)
