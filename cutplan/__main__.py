"""python -m cutplan"""

from cutplan.cli import main

main()
