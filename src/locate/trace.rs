//! The spine's midline by the path of least cost.
