"""The owner's springs: kept, found again, recognised, handed on."""
