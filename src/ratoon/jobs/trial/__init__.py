"""What if: changes of an accounted day, solved by workers."""
