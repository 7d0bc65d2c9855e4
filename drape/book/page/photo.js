// A photograph beside the same view, at the same scale. It is read by this browser alone, and sent nowhere.
export function layPhotograph(cloak) {
  const file = document.getElementById("photo-file"), pair = document.getElementById("photo-pair"), words = document.getElementById("photo-words");
  const sheet = document.getElementById("photo-image"), view = document.getElementById("photo-cloak");
  const heights = ["photo-high", "photo-low"].map((id) => document.getElementById(id));
  let image = null, marks = [];

  file.addEventListener("change", async () => {
    if (!file.files[0]) return;
    try {
      image = await createImageBitmap(file.files[0]);
    } catch {
      words.textContent = `${file.files[0].name}: not a picture that this browser can read. Choose a JPEG or PNG.`;
      return;
    }
    marks = [];
    pair.hidden = false;
    words.textContent = "Press the first point on the photograph.";
    draw();
  });
  sheet.addEventListener("click", (event) => {
    if (!image) return;
    const { left, top } = sheet.getBoundingClientRect(), fit = fitted();
    if (marks.length === 2) marks = [];
    marks.push([(event.clientX - left - fit.left) / fit.scale, (event.clientY - top - fit.top) / fit.scale]);
    words.textContent = marks.length === 1 ? "Now the second point." : "Both are at the same scale now. Turn the cloak above to the side the photograph was taken from.";
    draw();
  });
  heights.forEach((input) => input.addEventListener("input", draw));
  new ResizeObserver(draw).observe(sheet);
  cloak.canvas.addEventListener("pointermove", () => marks.length === 2 && draw());

  function fitted() {
    const scale = Math.min(sheet.clientWidth / image.width, sheet.clientHeight / image.height);
    return { scale, left: (sheet.clientWidth - image.width * scale) / 2, top: (sheet.clientHeight - image.height * scale) / 2 };
  }

  function draw() {
    if (!image || pair.hidden) return;
    const fit = fitted(), pen = prepared(sheet);
    pen.drawImage(image, fit.left, fit.top, image.width * fit.scale, image.height * fit.scale);
    pen.strokeStyle = "#8c2a1f";
    pen.lineWidth = 2;
    for (const [x, y] of marks) {
      pen.beginPath();
      pen.moveTo(0, fit.top + y * fit.scale);
      pen.lineTo(sheet.clientWidth, fit.top + y * fit.scale);
      pen.stroke();
    }
    if (marks.length === 2) {
      const [high, low] = heights.map((input) => Number(input.value.replace(",", ".")) / 100);
      cloak.still(prepared(view), view, marks.map(([, y]) => fit.top + y * fit.scale), [high, low]);
    }
  }

  function prepared(canvas) {
    const ratio = Math.min(devicePixelRatio, 2);
    canvas.width = canvas.clientWidth * ratio;
    canvas.height = canvas.clientHeight * ratio;
    const pen = canvas.getContext("2d");
    pen.scale(ratio, ratio);
    pen.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    return pen;
  }
}
