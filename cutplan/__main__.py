"""python -m cutplan, and the command cutplan."""

import signal


def main() -> None:
    """The command line. Until it is there, the stop key ends the program as it ends any other."""
    whole = signal.getsignal(signal.SIGINT)
    if whole is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from cutplan import cli

    signal.signal(signal.SIGINT, whole)
    cli.main()


if __name__ == "__main__":
    main()
