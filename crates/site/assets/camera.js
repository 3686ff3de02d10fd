// Reads a code with the camera, where the browser knows how to (BarcodeDetector). A page asks for this file only there; a
// scanner that types works everywhere. A code is taken once it was read twice alike, so that half a code in the picture is
// not taken for a whole one. The picture stays in the browser: nothing of it is kept or sent.
const EVERY_MS = 150;

const say = window.say;

export async function read(tell, isClosed) {
  const formats = await BarcodeDetector.getSupportedFormats();
  if (formats.length === 0) { tell(say("camera-none")); return null; }
  const detector = new BarcodeDetector({ formats });
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
  } catch {
    tell(say("camera-refused"));
    return null;
  }
  const video = document.createElement("video");
  video.className = "camera";
  video.muted = true;
  video.playsInline = true;
  video.srcObject = stream;
  try {
    tell(say("camera-hold"), video);
    await video.play();
    let before = null;
    while (!isClosed()) {
      await new Promise((done) => setTimeout(done, EVERY_MS));
      let found = [];
      try { found = await detector.detect(video); } catch { continue; }
      const codes = [...new Set(found.map((each) => each.rawValue.trim()).filter(Boolean))];
      if (codes.length > 1) { tell(say("camera-many")); before = null; continue; }
      if (codes.length === 1 && codes[0] === before) return before;
      before = codes[0] ?? null;
    }
    return null;
  } finally {
    for (const track of stream.getTracks()) track.stop();
    video.remove();
  }
}
