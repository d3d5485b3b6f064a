// Perceptually even colour scales: 64 stops each of cividis and viridis (both CC0, as published with matplotlib),
// and a two-sided one for differences, light in the middle.
const STOPS = {
  cividis:
    "00224e00255400285b002b62002e6a0030700533711235701a386f213b6e273e6e2d416d32436d36466c3b496c3f4c6c" +
    "444f6c48526c4c556c50576c545a6d575d6d5b606e5e636f62656f656870696b716c6e727071737374757777767a7a78" +
    "7e7d788280798683798a86788e8978928c78958f779992779d9576a19975a59c74a99f73ada272b1a570b6a96fbaac6d" +
    "bfb06bc3b369c7b767ccba64d0be62d4c15fd9c55cddc858e1cc55e6d051ead34cefd748f3db42f8df3cfde334fee838",
  viridis:
    "44015446075a470d6047136548186a481d6f482374482878472d7b46327e453781443b844240864045883e49893d4e8a" +
    "3a538b38588c365c8d34608d32648e31688e2f6c8e2d708e2c738e2a778e297b8e277f8e26828e24868e238a8d218e8d" +
    "20928c1f968b1f9a8a1f9e891fa18721a58523a98326ad812ab07f2fb47c35b7793bbb7542be714ac16d52c5695ac864" +
    "65cb5e6ece5877d15381d34d8bd64695d840a0da39aadc32b5de2bc0df25cae11fd5e21adfe318eae51af4e61efde725",
  difference:
    "1b5e7a22637d296781306c843770873d758b44798e4b7e91528394598798608c9b67909e6e95a27599a57b9ea882a3ac" +
    "89a7af90acb297b0b59eb5b9a5b9bcacbebfb3c3c3b9c7c6c0ccc9c7d0cdced5d0d5d9d3dcded6e3e3daeae7ddf1ece0" +
    "f3ebdff0e6d8ede0d1eadacbe7d5c4e5cfbee2c9b7dfc4b0dcbeaad9b9a3d7b39dd4ad96d1a88fcea289cb9d82c9977c" +
    "c69175c38c6ec08668be8061bb7b5bb87554b5704db26a47b06440ad5f3aaa5933a7532ca44e26a2481f9f43199c3d12",
};

/** 256 x 4 bytes (rgba) of the scale `name`, evenly interpolated. */
export function table(name) {
  const stops = STOPS[name] ?? STOPS.cividis;
  const last = stops.length / 6 - 1;
  const part = (i, c) => parseInt(stops.substr(6 * i + 2 * c, 2), 16);
  const bytes = new Uint8Array(1024);
  for (let k = 0; k < 256; k++) {
    const x = (k / 255) * last;
    const i = Math.min(Math.floor(x), last - 1);
    for (let c = 0; c < 3; c++) bytes[4 * k + c] = Math.round(part(i, c) + (x - i) * (part(i + 1, c) - part(i, c)));
    bytes[4 * k + 3] = 255;
  }
  return bytes;
}

/** The scale as a CSS gradient from left to right. */
export function gradient(name) {
  const bytes = table(name);
  const stops = [];
  for (let k = 0; k <= 16; k++) {
    const i = 4 * Math.round((k * 255) / 16);
    stops.push(`rgb(${bytes[i]},${bytes[i + 1]},${bytes[i + 2]})`);
  }
  return `linear-gradient(to right, ${stops.join(",")})`;
}
