#include "fitting/solve/misfit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "fitting/solve/residual_bins.hpp"
#include "fitting/solve/robust.hpp"

namespace fitting {
namespace {

constexpr double kNoiseFactor = 6.0;  // a bin's mean scatters this far by chance hardly ever
constexpr int kGapBins = 2;           // a gap this short does not end a stretch
constexpr int kShortestStrokes = 2;   // bins: one bin between strokes may be the turn's timing
constexpr double kNearlyAll = 0.6;    // of the sweeps
constexpr double kStrain = 3.0;       // of a prior's standard uncertainties
constexpr double kOfPeak = 0.5;
constexpr double kWorthNaming = 0.3;  // of the largest

struct Stretch {
  int first = 0;  // bins, both included
  int last = 0;
  double size_N = 0.0;  // mean over the stretch, signed by its larger part
  double noise_N = 0.0;
};

// One bin that lies off by more than it may.
struct Off {
  int bin = 0;
  double off_N = 0.0;
  double noise_N = 0.0;
};

std::vector<Off> offs_of(const BinMeans& bins, const BinMeans* reference, double tolerance_N) {
  std::vector<Off> out;
  for (int i = 0; i < kMisfitBins; ++i) {
    const auto at = static_cast<std::size_t>(i);
    if (bins[at].rows <= 0.0) continue;
    Off off{i, bins[at].mean_N(), bins[at].noise_N()};
    if (reference != nullptr) {
      if ((*reference)[at].rows <= 0.0) continue;
      off.off_N -= (*reference)[at].mean_N();
      off.noise_N = std::hypot(off.noise_N, (*reference)[at].noise_N());
    }
    if (std::abs(off.off_N) >= std::max(tolerance_N, kNoiseFactor * off.noise_N)) {
      out.push_back(off);
    }
  }
  return out;
}

// What lies around the largest of them and is of its size: a fault that acts everywhere, but most
// in one place, is named there.
Stretch around_peak(const std::vector<Off>& run) {
  const auto peak = std::max_element(run.begin(), run.end(), [](const Off& a, const Off& b) {
    return std::abs(a.off_N) < std::abs(b.off_N);
  });
  const auto of_its_size = [&](const Off& off) {
    return off.off_N * peak->off_N > 0.0 && std::abs(off.off_N) >= kOfPeak * std::abs(peak->off_N);
  };
  auto first = peak;
  while (first != run.begin() && of_its_size(*(first - 1))) --first;
  auto last = peak;
  while (last + 1 != run.end() && of_its_size(*(last + 1))) ++last;
  Stretch out{first->bin, last->bin};
  for (auto off = first; off <= last; ++off) {
    out.size_N += off->off_N / double(last - first + 1);
    out.noise_N = std::max(out.noise_N, off->noise_N);
  }
  return out;
}

// Runs of bins that lie off by more than they may.
std::vector<Stretch> stretches_of(const BinMeans& bins, const BinMeans* reference,
                                  double tolerance_N) {
  std::vector<Stretch> out;
  std::vector<Off> run;
  for (const Off& off : offs_of(bins, reference, tolerance_N)) {
    if (!run.empty() && off.bin - run.back().bin > kGapBins + 1) {
      out.push_back(around_peak(run));
      run.clear();
    }
    run.push_back(off);
  }
  if (!run.empty()) out.push_back(around_peak(run));
  return out;
}

const char* way_of(int direction) {
  if (direction == 0) return "both ways";
  return direction > 0 ? "on the way in" : "on the way out";
}

class Finder {
 public:
  Finder(const FitInput& input, const LawRun& run) : input_(input), run_(run) {}

  std::vector<Misfit> find() {
    between_strokes();
    from_model();
    from_strain();
    std::stable_sort(out_.begin(), out_.end(), [](const Misfit& a, const Misfit& b) {
      return std::abs(a.size_N) > std::abs(b.size_N);
    });
    // A fit bent by one fault errs a little everywhere.
    if (!out_.empty()) {
      const double least_N = kWorthNaming * std::abs(out_.front().size_N);
      std::erase_if(out_, [&](const Misfit& each) { return std::abs(each.size_N) < least_N; });
    }
    return std::move(out_);
  }

 private:
  double width_m() const { return input_.largest_travel_m / kMisfitBins; }
  const std::string& id_of(std::size_t sweep) const {
    return input_.records[sweep].metadata.record_id;
  }
  double error_N() const { return kMisfitOfModel / 3.0 * input_.largest_force_N; }

  Misfit make(const Stretch& stretch, int direction) const {
    Misfit out;
    out.from_m = stretch.first * width_m();
    out.to_m = (stretch.last + 1) * width_m();
    out.direction = direction;
    out.size_N = stretch.size_N;
    return out;
  }

  // The strokes of one direction against the mean of the others. The first strokes of a record from
  // rest differ by the gas, which the model follows, so its residual is what is compared.
  void between_strokes() {
    const std::vector<Eigen::VectorXd> residuals_N = run_.residuals_N(run_.solution.values);
    for (std::size_t s = 0; s < run_.sweeps.size(); ++s) {
      for (int direction : {+1, -1}) {
        compare_strokes(s, direction,
                        bins_by_stroke(*run_.sweeps[s], residuals_N[s], direction, width_m()));
      }
    }
  }

  void compare_strokes(std::size_t s, int direction, const std::map<int, BinMeans>& strokes) {
    if (strokes.size() < 2) return;
    const double tolerance_N = kMisfitOfStrokes * input_.largest_force_N;
    Stretch worst;
    int changed = -1;
    const BinMeans* before = nullptr;
    // A change stays: a stroke is held against the one before it.
    for (const auto& [number, bins] : strokes) {
      if (before != nullptr) {
        for (const Stretch& stretch : stretches_of(bins, before, tolerance_N)) {
          if (stretch.last - stretch.first + 1 < kShortestStrokes) continue;
          if (std::abs(stretch.size_N) <= std::abs(worst.size_N)) continue;
          worst = stretch;
          changed = number;
        }
      }
      before = &bins;
    }
    if (changed < 0) return;
    Misfit misfit = make(worst, direction);
    misfit.sweep = id_of(s);
    misfit.stroke = changed;
    misfit.significance = std::abs(worst.size_N) / std::max(worst.noise_N, tolerance_N / 3.0);
    misfit.text = fmt::format(
        "in '{}' stroke {} differs from the one before it {} by {:+.1f} N between {:.0f} and "
        "{:.0f} mm: the fork or the bench changed during the sweep (the travel slipped, the load "
        "cell's gain or zero moved, air was lost)",
        misfit.sweep, changed + 1, way_of(direction), worst.size_N, 1e3 * misfit.from_m,
        1e3 * misfit.to_m);
    out_.push_back(std::move(misfit));
  }

  // What each sweep has in common over its strokes, against the model.
  void from_model() {
    const double tolerance_N = kMisfitOfModel * input_.largest_force_N;
    if (!leaves_model(run_.residuals_N(run_.solution.values), tolerance_N)) return;
    const Eigen::VectorXd sound = solve_robustly(run_, error_N());
    const std::vector<Eigen::VectorXd> residuals_N = run_.residuals_N(sound);
    for (int direction : {+1, -1}) {
      if (in_nearly_all(residuals_N, direction, tolerance_N)) continue;
      for (std::size_t s = 0; s < run_.sweeps.size(); ++s) {
        const BinMeans bins = bins_of(*run_.sweeps[s], residuals_N[s], direction, width_m());
        for (const Stretch& stretch : stretches_of(bins, nullptr, tolerance_N)) {
          add_from_model(make(stretch, direction), id_of(s));
        }
      }
    }
  }

  bool leaves_model(const std::vector<Eigen::VectorXd>& residuals_N, double tolerance_N) const {
    for (std::size_t s = 0; s < run_.sweeps.size(); ++s) {
      for (int direction : {+1, -1}) {
        const BinMeans bins = bins_of(*run_.sweeps[s], residuals_N[s], direction, width_m());
        if (!stretches_of(bins, nullptr, tolerance_N).empty()) return true;
      }
    }
    return false;
  }

  // One statement for all sweeps where the mean over them leaves the model and most of them share
  // it.
  bool in_nearly_all(const std::vector<Eigen::VectorXd>& residuals_N, int direction,
                     double tolerance_N) {
    BinMeans pooled{};
    std::size_t off = 0;
    for (std::size_t s = 0; s < run_.sweeps.size(); ++s) {
      const BinMeans bins = bins_of(*run_.sweeps[s], residuals_N[s], direction, width_m());
      add_to(pooled, bins);
      if (!stretches_of(bins, nullptr, tolerance_N).empty()) ++off;
    }
    const std::vector<Stretch> stretches = stretches_of(pooled, nullptr, tolerance_N);
    if (stretches.empty() || double(off) < kNearlyAll * double(run_.sweeps.size())) return false;
    for (const Stretch& stretch : stretches) add_from_model(make(stretch, direction), "");
    return true;
  }

  // An element that had to leave far behind what was known of it stands for something else: a
  // chamber that is not there is fitted as one of no size. It is wrong where it acts.
  void from_strain() {
    for (const LinearPrior& prior : run_.problem.priors) {
      if (prior.terms.size() != 1 || prior.terms.front().first >= run_.map.shared_size()) continue;
      const int position = prior.terms.front().first;
      const double strain =
          std::abs(run_.solution.values(position) - prior.target) / prior.standard_uncertainty;
      if (strain < kStrain || !tells_spring(position)) continue;
      add_strained(position, prior.target, strain);
    }
  }

  bool tells_spring(int position) const {
    const LawIndex index = run_.map.free[static_cast<std::size_t>(position)].index;
    return index == kCoilRate || index == kPositiveVolume || index == kNegativeVolume ||
           index == kLowerLegVolume || index == kTransferTravel;
  }

  void add_strained(int position, double expected, double strain) {
    const SweepEvidence& sweep = *run_.sweeps.front();
    Eigen::VectorXd values = run_.solution.values;
    Eigen::VectorXd fitted_N;
    Eigen::VectorXd expected_N;
    if (!sweep.simulate(values, fitted_N, nullptr)) return;
    values(position) = expected;
    if (!sweep.simulate(values, expected_N, nullptr)) return;
    const BinMeans bins = bins_of(sweep, expected_N - fitted_N, +1, width_m());
    double largest_N = 0.0;
    for (const BinMean& bin : bins) largest_N = std::max(largest_N, std::abs(bin.mean_N()));
    for (const Stretch& stretch : stretches_of(bins, nullptr, 0.5 * largest_N)) {
      Misfit misfit = make(stretch, 0);
      misfit.significance = strain;
      misfit.text = fmt::format(
          "{} had to leave what was {} of it by {:.1f} standard uncertainties, which is {:+.1f} N "
          "between {:.0f} and {:.0f} mm: that part of the fork is not as the model has it",
          kLawParameters[run_.map.free[static_cast<std::size_t>(position)].index].name,
          run_.map.free[static_cast<std::size_t>(position)].prior_is_stated ? "stated" : "assumed",
          strain, misfit.size_N, 1e3 * misfit.from_m, 1e3 * misfit.to_m);
      out_.push_back(std::move(misfit));
    }
  }

  void add_from_model(Misfit misfit, const std::string& sweep) {
    misfit.sweep = sweep;
    misfit.significance = std::abs(misfit.size_N) / error_N();
    misfit.text = fmt::format(
        "between {:.0f} and {:.0f} mm {} the {} {:+.1f} N from the model{}: something there is not "
        "in the model",
        1e3 * misfit.from_m, 1e3 * misfit.to_m, way_of(misfit.direction),
        sweep.empty() ? "sweeps lie" : "record lies", misfit.size_N,
        sweep.empty() ? "" : fmt::format(" in '{}'", sweep));
    out_.push_back(std::move(misfit));
  }

  const FitInput& input_;
  const LawRun& run_;
  std::vector<Misfit> out_;
};

}  // namespace

std::vector<Misfit> find_misfits(const FitInput& input, const LawRun& run) {
  return Finder(input, run).find();
}

}  // namespace fitting
