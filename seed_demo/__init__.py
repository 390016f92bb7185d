"""An invented region, loaded through the same use cases as any caller: `python -m seed_demo`."""
