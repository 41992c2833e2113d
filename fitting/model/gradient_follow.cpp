#include "fitting/model/gradient_follow.hpp"

#include "fitting/model/clones.hpp"
#include "fitting/model/dual.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

// Plain arrays: nothing that must be compiled for one instruction set only is shared.
struct Job {
  const SweepModel* model;
  const double* parameters;  // kLawSize
  const Path* path;
  const int* position;  // of each law parameter among the columns, -1: none
  int columns;
  double* force_N;   // one per node
  double* gradient;  // columns per node
};

SPRINGWRIGHT_CLONES bool run(const Job& job) {
  constexpr int N = kWidestGradient;
  LawParameters<Dual<N>> p;
  for (std::size_t i = 0; i < kLawSize; ++i) {
    p[i] = job.position[i] < 0 ? Dual<N>(job.parameters[i])
                               : Dual<N>(job.parameters[i], job.position[i]);
  }
  std::size_t node = 0;
  return follow_each(*job.model, p, *job.path, [&](const Dual<N>& force_N) {
    job.force_N[node] = force_N.a;
    double* row = job.gradient + node * static_cast<std::size_t>(job.columns);
    for (int i = 0; i < job.columns; ++i) row[i] = force_N.v[i];
    ++node;
  });
}

}  // namespace

bool follow_with_gradient(const SweepModel& model, const LawParameters<double>& parameters,
                          const Path& path, const std::vector<LawIndex>& by,
                          Eigen::VectorXd& force_N, RowMatrix& gradient) {
  const int columns = static_cast<int>(by.size());
  ENSURE(columns <= kWidestGradient);
  std::array<int, kLawSize> position;
  position.fill(-1);
  for (int i = 0; i < columns; ++i) position[by[static_cast<std::size_t>(i)]] = i;
  const auto nodes = static_cast<Eigen::Index>(path.nodes.size());
  force_N.resize(nodes);
  gradient.resize(nodes, columns);
  const Job job{&model,  parameters.data(), &path,          position.data(),
                columns, force_N.data(),    gradient.data()};
  return run(job);
}

}  // namespace fitting
