"""every outside check, runnable by the user"""
