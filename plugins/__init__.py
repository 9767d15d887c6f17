"""The plugins that come along: one file and one idea each, on the same interface as anyone's.

Each is found through its entry point and imports `pairing.api` alone, so any of them can be copied into a bench's
``plugins`` folder and changed there.
"""
