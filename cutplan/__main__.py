"""python -m cutplan, and the command cutplan."""

import gc
import signal

RARELY = 100_000, 50, 100  # the collector's thresholds: a plan is very many records, and none lead back to themselves


def main() -> None:
    """The command line. Until it is there, the stop key ends the program as it ends any other."""
    whole = signal.getsignal(signal.SIGINT)
    if whole is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    gc.set_threshold(*RARELY)
    from cutplan import cli

    signal.signal(signal.SIGINT, whole)
    cli.main()


if __name__ == "__main__":
    main()
