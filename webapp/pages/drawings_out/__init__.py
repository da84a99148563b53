"""Plan views as files for CAD and cutters."""
