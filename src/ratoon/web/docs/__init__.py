"""The documentation as a site of its own, with search: made from `docs`, served under ``/docs``."""
