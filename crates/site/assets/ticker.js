// A pulse for the times of a draw. A browser slows the pulse of a page that lies behind another; that of a worker it does not.
"use strict";

setInterval(() => postMessage(0), 100);
