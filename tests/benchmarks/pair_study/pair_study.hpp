// Forks drawn by chance, fitted and compared two by two, and what was said of them held against
// what is really so.
#pragma once

#include <cstdint>
#include <vector>

namespace pair_study {

// What came of one pair.
struct Compared {
  std::uint64_t seed = 0;
  bool usable = false;  // both fits
  int crossovers = 0;   // placed
  int held = 0;         // whose 95 % interval holds a true crossing
  int firmer = 0;       // spans in which one was called firmer
  int wrong = 0;        // of them, where the truth has the other sign by more than is stated
};
// Two forks swept on one bench, at one of their pressures each.
Compared compare_drawn(std::uint64_t seed);

struct SameFork {
  std::uint64_t seed = 0;
  bool usable = false;
  bool called_different = false;
};
// One fork, swept, taken off, mounted again and swept again.
SameFork compare_with_itself(std::uint64_t seed);

struct Promise {
  std::uint64_t seed = 0;
  bool usable = false;
  int thirds = 0;
  int kept = 0;  // of the thirds: what is left there is what was promised, within k = 2
};
// B set as told and swept once more, A as well.
Promise match_drawn(std::uint64_t seed);

// Seeds first, first + 1, ..., from a few threads.
template <class Answer>
std::vector<Answer> many(Answer (*one)(std::uint64_t), int count, std::uint64_t first, int threads);

extern template std::vector<Compared> many(Compared (*)(std::uint64_t), int, std::uint64_t, int);
extern template std::vector<SameFork> many(SameFork (*)(std::uint64_t), int, std::uint64_t, int);
extern template std::vector<Promise> many(Promise (*)(std::uint64_t), int, std::uint64_t, int);

}  // namespace pair_study
