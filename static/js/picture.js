// Makes a PNG of a drawing and hands it over as a file: at twice its size, on white.
const SCALE = 2;

async function loaded(address) {
  const image = new Image();
  image.src = address;
  await image.decode();
  return image;
}

function painted(image) {
  const canvas = document.createElement("canvas");
  canvas.width = image.naturalWidth * SCALE;
  canvas.height = image.naturalHeight * SCALE;
  const brush = canvas.getContext("2d");
  brush.fillStyle = "#fff";
  brush.fillRect(0, 0, canvas.width, canvas.height);
  brush.drawImage(image, 0, 0, canvas.width, canvas.height);
  return canvas;
}

export async function drawPicture(address, name) {
  const canvas = painted(await loaded(address));
  const file = await new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
  if (!file) throw new Error("the picture is too large");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
