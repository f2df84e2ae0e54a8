"""What `doe next` says beside the next step."""
