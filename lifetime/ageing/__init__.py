"""Published ageing laws, each one file behind the contract of :mod:`lifetime.ageing.contract`."""
