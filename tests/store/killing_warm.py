"""Loaded by the fork server alone: its processes inherit what is made here."""

import killing_mill

killing_mill.warm()
