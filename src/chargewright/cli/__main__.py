"""``python -m chargewright.cli``: the command, for where its script is not on the path."""

from chargewright.cli.main import main

if __name__ == "__main__":
    main(prog_name="chargewright")
