"""`python -m consolecheck`."""

from consolecheck.cli.main import run

if __name__ == "__main__":
    run()
