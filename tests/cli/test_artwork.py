"""`sumlight artwork` from a terminal: what a person with a scan and no box gets."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sumlight.cli import main
from tests.artwork.known_scans import Lying, Shape, bench_part, scanned, sheet_of
from tests.artwork.test_clean import pixels

WITHOUT = """
import sys
class Gone:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {blocked!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)
sys.meta_path.insert(0, Gone())
from sumlight.cli import main
print([main({artwork!r}), main({other!r})])
"""


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    """A black square of 60 px on white at 1200 dpi, with a speck of 2 px."""
    grey = np.full((100, 120), 255, np.uint8)
    grey[20:80, 20:80] = 0
    grey[10:12, 100:102] = 0
    path = tmp_path / "scan.png"
    Image.fromarray(grey).save(path, dpi=(1200, 1200))
    return path


def found(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> dict[str, object]:
    """The answer as JSON."""
    assert main(["artwork", *words, "--json"]) == status
    answer = json.loads(capsys.readouterr().out)
    assert isinstance(answer, dict)
    return answer


def test_check_tells_size_places_and_what_to_do(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """2.54 mm wide by definition of the inch; the speck is named with its place."""
    told = found(capsys, "check", str(scan), status=1)
    assert told["width_mm"] == pytest.approx(2.54, rel=1e-4)
    assert told["open_share"] == pytest.approx(3604 / 12000)
    assert main(["artwork", "check", str(scan)]) == 1
    text = capsys.readouterr().out
    assert "1 openings smaller than 100 µm" in text
    assert "2.14, 0.23 mm" in text
    assert "Clean the artwork" in text


def test_clean_tells_the_difference_first_and_never_writes_over(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --write there is no file; with it a new one, which a second run leaves alone."""
    new = scan.with_name("clean.png")
    assert found(capsys, "clean", str(scan), str(new))["changed_px"] == 4
    assert not new.exists()
    shown = scan.with_name("difference.png")
    assert found(capsys, "clean", str(scan), str(new), "--write", "--difference", str(shown))["written"] is True
    with Image.open(new) as image, Image.open(shown) as what:
        assert np.count_nonzero(~np.asarray(image)) == 3600
        assert np.count_nonzero(~np.asarray(what)) == 4
    before = new.read_bytes()
    assert main(["artwork", "clean", str(scan), str(new), "--write", "--invert"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert new.read_bytes() == before


def test_a_file_without_scale_is_asked_for_one_length(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And takes it in any unit."""
    path = tmp_path / "a.png"
    Image.new("L", (50, 50), 255).save(path)
    assert main(["artwork", "check", str(path)]) == 2
    assert "Measure one length" in capsys.readouterr().err
    assert found(capsys, "check", str(path), "--scale", "50:2mm")["pitch_um"] == pytest.approx(40)


def test_a_plain_install_says_which_extra_is_missing(scan: Path) -> None:
    """With its libraries taken away, as on a box; nothing else of the command line needs any of them."""
    run = WITHOUT.format(
        blocked={"cv2", "PIL", "pypdfium2", "resvg_py", "numpy"},
        artwork=["artwork", "check", str(scan)],
        other=["bath", "smallest", "--thickness", "150um"],
    )
    done = subprocess.run([sys.executable, "-c", run], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "[2, 0]"
    assert "pip install 'sumlight[artwork]' (cv2 is missing)" in done.stderr


def test_predict_tells_what_a_shifted_back_does(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In words, and less is through than without; where only one side is open there is nothing to shift."""
    words = ("artwork", "predict", str(scan), "--thickness", "100um", "--factor", "2", "--shift", "300um,-40um")
    main([*words, "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["outlines"][0]["through_mm2"] < told["through_unshifted_mm2"][0]
    main([*words])
    assert "With the back +300 µm to the right and -40 µm down" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--build", "masked"]) == 2


def test_predict_gives_bands_mass_and_a_picture(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A square of 1.27 mm in 100 µm: at least its own area times thickness and density (8.5 g/cm³) is dissolved."""
    picture = scan.with_name("part.png")
    words = ("predict", str(scan), "--thickness", "100um", "--picture", str(picture))
    told = found(capsys, *words)
    grams, factors = told["metal_g"], told["factors"]
    assert isinstance(grams, list)
    assert isinstance(factors, dict)
    assert factors["guessed"] is True
    assert 1.27**2 * 0.1 * 8.5e-3 < grams[0] < grams[1] < grams[2]
    with Image.open(picture) as image:
        assert image.size == (120, 100)
    assert main(["artwork", *words]) == 2  # the picture is there
    assert "is there already" in capsys.readouterr().err
    assert main(["artwork", *words[:4]]) == 0
    text = capsys.readouterr().out
    assert "Etch a coupon" in text
    assert "Through first after 83% of the etch, last after 83%." in text  # 1 / k, and k is 1.2


def test_predict_maps_depths_and_takes_a_slower_back(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The cusp of T 100, F 2, k 1.2 is (60 - sqrt(60² - 50²)) / 2 = 13.4 µm; 1.6 and 0.8 are reaches of 80 and 40."""
    picture, depths = scan.with_name("part.png"), scan.with_name("part-depths.png")
    words = ("artwork", "predict", str(scan), "--thickness", "100um", "--factor", "2")
    assert main([*words, "--picture", str(picture)]) == 0
    assert "an edge stands out by 13.42 µm" in " ".join(capsys.readouterr().out.split())
    with Image.open(depths) as image:
        assert image.size == (120, 100)
    picture.unlink()
    assert main([*words, "--picture", str(picture)]) == 2
    assert f"{depths.name} is there already" in " ".join(capsys.readouterr().err.split())
    assert not picture.exists()
    told = found(capsys, *words[1:], "--over-etch", "1.6:0.8")
    reaches = {"front_reach_um": pytest.approx(80), "back_reach_um": pytest.approx(40)}
    assert told["build"] == {"kind": "sheet", "thickness_um": 100} | reaches
    assert main([*words, "--over-etch", "1.6:0.8"]) == 0
    assert "stands out" not in capsys.readouterr().out  # the waist no longer lies in the middle
    assert main([*words, "--over-etch", "1.6:0.8", "--build", "foil"]) == 2
    assert "both sides" in capsys.readouterr().err


def test_compensate_offers_a_coupon_first_and_prints_k_outline_and_time(
    scan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """T 100, F 1, k 1.2: 33.2 µm at the waist, 6 min at 10 µm/min; a guess is taken only when asked for."""
    new = scan.with_name("film.png")
    words = ("compensate", str(scan), str(new), "--thickness", "100um", "--rate", "10um/min")
    assert "Etch a coupon" in str(found(capsys, *words, status=1)["question"])
    assert not new.exists()
    assert main(["artwork", *words, "--factor", "1"]) == 0
    text = capsys.readouterr().out
    assert "33.2 µm smaller at each edge, for the outline at the waist: k = 1.2, etch factor 1," in text
    assert "The bath reaches that far in about 6.0 min" in text
    with Image.open(new) as image:
        drawn = np.count_nonzero(~np.asarray(image))
        assert image.info["dpi"] == pytest.approx((1200, 1200), rel=1e-4)
    assert np.sqrt(drawn) * 25.4 / 1200 == pytest.approx(1.27 - 2 * 0.0332, abs=0.022)
    pdf = str(scan.with_name("film.pdf"))
    told = found(capsys, *words[:2], pdf, *words[3:], "--factor", "guess")
    assert isinstance(told["factors"], dict)
    assert told["factors"]["guessed"] is True


def test_compare_tells_what_differs_and_a_scanner_from_two_scans(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A scanner that draws across 0.5 % longer, found from two scans of the sheet, is taken off a third's sizes."""
    own = np.array([[1.005, 0.0], [0.0, 1.0]])
    shapes = [one for one in bench_part(300, 380, wanted=16) if np.hypot(one.x - 150, one.y - 200) > one.half_x + 30]
    with Image.fromarray(~pixels(sheet_of(shapes, 300, 380))) as drawn:
        drawn.save(tmp_path / "file.png", dpi=(1200, 1200))
    spoilt = [*shapes, Shape(150, 200, 6, 6, disc=True)]
    for name, these, turn in (("one.png", shapes, 0.7), ("two.png", shapes, -89.0), ("bad.png", spoilt, 1.0)):
        scan, _offset = scanned(these, 300, 380, Lying(turn, before=own))
        Image.fromarray(scan.grey).save(tmp_path / name, dpi=(1200, 1200))
    one, two, bad, file = (str(tmp_path / name) for name in ("one.png", "two.png", "bad.png", "file.png"))
    scanner = found(capsys, "scanner", one, two, "--rule", f"{1005 * 50 / 21.16667:.3f}:50mm")
    assert scanner["x_over_y"] == pytest.approx(1.005, abs=3e-4)
    assert scanner["scale"] == pytest.approx(1.005 / 1.005**0.5, abs=3e-4)
    option = str(scanner["option"]).split()
    shown = tmp_path / "both.png"
    told = found(capsys, "compare", bad, file, *option, "--picture", str(shown), status=1)
    affine, findings = told["affine"], told["findings"]
    assert isinstance(affine, dict)
    assert isinstance(findings, list)
    assert (affine["scale_x"], affine["scale_y"]) == pytest.approx((1, 1), abs=6e-4)
    assert [one["kind"] for one in findings] == ["pinhole"]
    with Image.open(shown) as image:
        assert image.size == (300, 380)


def test_learn_proposes_what_compensate_then_draws(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lengths and a comparison's file alike; the proposal is printed, with its band, and carried out by nobody."""
    file = scan.with_name("film.json")
    file.write_text(json.dumps({"bias": {"mean_um": 9.0}}))
    told = found(capsys, "learn", f"film={file}", "resist=-3um", "waist=0.04mm", "--thickness", "100um")
    assert isinstance(told["draw_um"], dict)
    assert 25 < told["draw_um"]["low"] < told["draw_um"]["middle"] < told["draw_um"]["high"] < 55
    new = str(scan.with_name("next.png"))
    drawn = found(capsys, "compensate", str(scan), new, *str(told["options"]).split())
    assert drawn["moves_um"] == pytest.approx(told["draw_um"]["middle"], abs=0.06)
    assert main(["artwork", "learn", "--thickness", "100um"]) == 0
    assert "Nothing was compared yet" in capsys.readouterr().out
    file.write_text("[]")
    for wrong in ("board=3um", f"film={file}"):
        with pytest.raises(SystemExit):
            main(["artwork", "learn", wrong, "--thickness", "100um"])
        assert "film=" in capsys.readouterr().err


def test_check_tells_an_inverted_sheet_and_a_mirrored_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each with its place and what to do: an L whose back was printed as it looks from behind."""
    grey = np.full((120, 120), 255, np.uint8)
    grey[20:100, 20:36] = 0
    grey[84:100, 20:60] = 0
    files = {"front": grey, "back": grey[:, ::-1], "inverted": 255 - grey, "small": grey[:100]}
    for name, picture in files.items():
        Image.fromarray(picture).save(tmp_path / f"{name}.png", dpi=(600, 600))

    def kinds(*words: str, status: int) -> list[str]:
        told = found(
            capsys, "check", *(str(tmp_path / word) if ".png" in word else word for word in words), status=status
        )
        return [one["kind"] for one in told["findings"]]  # type: ignore[attr-defined]

    assert kinds("front.png", "--back", "front.png", status=0) == []
    assert kinds("front.png", "--back", "back.png", status=1) == ["mirrored"]
    assert kinds("inverted.png", status=1) == ["polarity"]
    assert main(["artwork", "check", str(tmp_path / "front.png"), "--back", str(tmp_path / "small.png")]) == 2
    assert "both must be one size" in capsys.readouterr().err


def test_a_fold_line_is_typed_with_its_side_ends_and_angle(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """T 100, k 1.2, F 2: 2·60·tan(30°) = 69.3 wide, less than the bath eats, so it is drawn as narrow as prints."""
    folder = scan.with_name("pair")
    words = ["pair", str(scan), str(folder), "--thickness", "100um", "--factor", "2", "--crop", "no"]
    told = found(capsys, *words, "--fold", "back 0.1 1.9 2.4mm 1.9 60", "--fold", "front 0,1 0,2 2 0,2")
    folded = told["folded"]
    assert isinstance(folded, list)
    assert "towards the back, bent by 60°: drawn 50 µm wide" in str(folded[0])
    assert "towards the front, bent by 90°: drawn 60 µm wide" in str(folded[1])
    assert (folder / "back.png").is_file()
    for wrong, why in (("front 1 1 2", "both ends in mm"), ("top 1 1 2 2", "towards must be one of front, back")):
        with pytest.raises(SystemExit):
            main(["artwork", *words, "--fold", wrong])
        assert why in capsys.readouterr().err
