"""What somebody sees who opens a shared link: overview, fit and charts, nothing to edit."""
