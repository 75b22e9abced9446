"""Road match: the rear wheels must meet the road that the front wheels have met."""
