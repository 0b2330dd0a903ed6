"""Run the workshop: see ``runner``."""

from benchmarks.workshop.runner import main

if __name__ == "__main__":
    main()
