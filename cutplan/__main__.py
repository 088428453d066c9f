"""python -m cutplan, and the command cutplan."""

import os
import signal

RARELY = 100_000, 50, 100  # the collector's thresholds: a plan is very many records, and none lead back to themselves


def main() -> None:
    """The command line. Until a command is at work, the stop key ends the program as it ends any other."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small products only, and each core has work of its own
    import gc

    gc.set_threshold(*RARELY)
    from cutplan import cli

    cli.main()


if __name__ == "__main__":
    main()
