"""the day itself: clock, run (what happens now and next), ledger (SQLite), migrations, learn"""
