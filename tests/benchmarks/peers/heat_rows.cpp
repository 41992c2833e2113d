// The heat law's rows for another solver, from the same compiled kernel with the same steps and
// port: forces at the cells, laid on the samples between them. Our own fit runs first.
//
// Usage: heat_rows DIR. Prints our lines, then serves: reads "r v1 .. vP" or "j v1 .. vP", writes
// the residuals or the Jacobian (row by row) into DIR/residuals or DIR/jacobian, mapped by both
// sides, and answers "ok".
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/mman.h>
#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <sstream>

#include "fitting/model/gradient_follow.hpp"
#include "tests/benchmarks/speed/heat.hpp"

namespace {

using namespace fitting;

double* map_file(const std::string& path, std::size_t count) {
  const int file = open(path.c_str(), O_RDWR | O_CREAT | O_TRUNC, 0600);
  if (file < 0 || ftruncate(file, static_cast<off_t>(count * sizeof(double))) != 0) return nullptr;
  void* at = mmap(nullptr, count * sizeof(double), PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
  close(file);
  return at == MAP_FAILED ? nullptr : static_cast<double*>(at);
}

// Between which nodes of its path a sample lies, and where.
struct Place {
  int node = 0;
  double share = 0.0;
};

// A sample belongs between the nodes on either side of it, within its stroke.
std::vector<Place> place_samples(const protocol::SweepRecord& record, const Path& path) {
  std::vector<Place> out;
  std::size_t node = 0;
  for (std::size_t row = 0; row < record.size(); ++row) {
    while (node + 2 < path.nodes.size() && path.nodes[node + 1].time_s < record.time_s[row]) ++node;
    const PathNode& a = path.nodes[node];
    const PathNode& b = path.nodes[node + 1];
    const double span_s = b.time_s - a.time_s;
    const double share = span_s > 0.0 ? (record.time_s[row] - a.time_s) / span_s : 0.0;
    out.push_back({static_cast<int>(node), share});
  }
  return out;
}

class Rows {
 public:
  explicit Rows(const speed::HeatSet& set) : set_(set), evidence_(set) {
    for (std::size_t s = 0; s < set.records.size(); ++s) {
      places_.push_back(place_samples(set.records[s], evidence_.paths[s]));
      size_ += places_.back().size();
    }
    for (const FreeParameter& free : set.map.free) by_.push_back(free.index);
  }

  std::size_t size() const { return size_; }
  int columns() const { return static_cast<int>(by_.size()); }

  void residuals(const Eigen::VectorXd& values, double* out) const {
    for (std::size_t s = 0; s < places_.size(); ++s) {
      const std::vector<double> force =
          follow(evidence_.sweeps[s]->model(), set_.map.law(values, static_cast<int>(s)),
                 evidence_.paths[s]);
      for (std::size_t i = 0; i < places_[s].size(); ++i) {
        const Place& place = places_[s][i];
        const auto node = static_cast<std::size_t>(place.node);
        *out++ = force[node] + place.share * (force[node + 1] - force[node]) -
                 set_.records[s].force_N[i];
      }
    }
  }

  void jacobian(const Eigen::VectorXd& values, double* out) const {
    const Eigen::VectorXd slopes = set_.map.slopes(values);
    Eigen::VectorXd force;
    RowMatrix gradient;
    for (std::size_t s = 0; s < places_.size(); ++s) {
      follow_with_gradient(evidence_.sweeps[s]->model(), set_.map.law(values, static_cast<int>(s)),
                           evidence_.paths[s], by_, force, gradient);
      for (const Place& place : places_[s]) {
        for (int c = 0; c < columns(); ++c) {
          const double a = gradient(place.node, c);
          *out++ = (a + place.share * (gradient(place.node + 1, c) - a)) * slopes(c);
        }
      }
    }
  }

 private:
  const speed::HeatSet& set_;
  speed::HeatEvidence evidence_;
  std::vector<std::vector<Place>> places_;
  std::vector<LawIndex> by_;
  std::size_t size_ = 0;
};

void run_ours(const speed::HeatSet& set) {
  constexpr int kTimes = 9;
  for (int threads : {1, 2}) {
    std::vector<double> total, reduce, solve;
    speed::HeatFit fit;
    for (int i = 0; i < kTimes; ++i) {
      fit = speed::fit_heat(set, threads);
      total.push_back(fit.reduce_ms + fit.solve_ms);
      reduce.push_back(fit.reduce_ms);
      solve.push_back(fit.solve_ms);
    }
    for (auto* each : {&total, &reduce, &solve}) std::sort(each->begin(), each->end());
    std::cout << fmt::format("heat ours_{} {:.3f} reduce {:.3f} solve {:.3f} iterations {}\n",
                             threads, total[kTimes / 2], reduce[kTimes / 2], solve[kTimes / 2],
                             fit.iterations);
    if (threads == 2) continue;
    std::cout << "heat values";
    for (double value : fit.values) std::cout << fmt::format(" {:.12g}", value);
    std::cout << "\nheat deviations";
    for (double value : fit.deviations) std::cout << fmt::format(" {:.6g}", value);
    std::cout << "\n";
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: heat_rows DIR\n";
    return 2;
  }
  const speed::HeatSet set = speed::make_heat_joint();
  run_ours(set);
  const Rows rows(set);
  const std::string folder = argv[1];
  double* residuals = map_file(folder + "/residuals", rows.size());
  double* jacobian =
      map_file(folder + "/jacobian", rows.size() * static_cast<std::size_t>(rows.columns()));
  if (residuals == nullptr || jacobian == nullptr) {
    std::cerr << "cannot write in " << folder << "\n";
    return 7;
  }
  std::cout << "serve " << rows.size() << " " << rows.columns();
  for (double value : set.start) std::cout << " " << value;
  std::cout << std::endl;
  for (std::string line; std::getline(std::cin, line);) {
    std::istringstream words(line);
    char what = 0;
    words >> what;
    Eigen::VectorXd values(rows.columns());
    for (double& value : values) words >> value;
    what == 'r' ? rows.residuals(values, residuals) : rows.jacobian(values, jacobian);
    std::cout << "ok" << std::endl;
  }
  return 0;
}
