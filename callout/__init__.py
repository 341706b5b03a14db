"""callout: the voice of the staging area for teams that shore up damaged buildings."""

import os as _os

#: onnxruntime reports to its maker unless told not to, and reads this once, when it is loaded. Set here, at the door of
#: the package, it stands before any import of that library, and in every process that is started from this one.
_os.environ["ORT_DISABLE_TELEMETRY"] = "1"

__version__ = "0.1.0"
