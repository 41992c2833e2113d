#include "fitting/report/palette.hpp"

#include "protocol/error.hpp"

namespace fitting {

ToneStyle tone_style(Tone tone) {
  switch (tone) {
    case Tone::first:
      return {"#123f6b", "", 2.4, 7};
    case Tone::second:
      return {"#cf5f1c", "(9,4)", 2.4, 9};
    case Tone::third:
      return {"#2b8f86", "(2,3)", 2.2, 5};
    case Tone::fourth:
      return {"#7d3569", "(12,4,2,4)", 1.9, 11};
    case Tone::fifth:
      return {"#9a7b1a", "(5,3)", 1.7, 13};
    case Tone::measured:
      return {"#9db4c8", "", 4.2, 7};
    case Tone::simulated:
      return {"#141a21", "(7,3)", 1.4, 7};
    case Tone::difference:
      return {"#1b1f24", "", 2.0, 7};
    case Tone::neutral:
      return {"#6b737c", "", 1.0, 7};
  }
  ENSURE(false);
}

}  // namespace fitting
