"""An invented day: plain files as a meter, its camera and an office might leave them.

Nothing here is read from the rooms that read such files, so that a mistake of theirs can't hide
behind the same mistake here.
"""
