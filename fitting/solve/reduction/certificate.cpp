#include "fitting/solve/reduction/certificate.hpp"

#include <Eigen/Dense>
#include <cmath>

#include "fitting/solve/parallel.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

NormalEquations equations_of(const ReducedEvidence& sweep, const std::vector<StrokeRows>& strokes,
                             const Eigen::VectorXd& values, double& sum_N2) {
  const std::vector<StrokeTerms> terms = sweep.terms(values);
  ENSURE(!terms.empty());
  NormalEquations own;
  own.clear(sweep.columns());
  for (std::size_t i = 0; i < strokes.size(); ++i) {
    const auto kind = static_cast<std::size_t>(sweep.reduction().kinds()[i]);
    add_rows(terms[kind], strokes[i].travel_m, strokes[i].force_N, strokes[i].rows, sweep.columns(),
             own);
  }
  sum_N2 = own.sum;
  NormalEquations out;
  sweep.spread(own, values, out);
  return out;
}

}  // namespace

Certificate certify(const std::vector<const ReducedEvidence*>& sweeps,
                    const std::vector<std::vector<StrokeRows>>& strokes, const Problem& problem,
                    const Eigen::VectorXd& values, int threads) {
  ENSURE(sweeps.size() == strokes.size());
  std::vector<NormalEquations> each(sweeps.size());
  std::vector<double> sums_N2(sweeps.size());
  for_each_parallel(static_cast<int>(sweeps.size()), threads, [&](int s) {
    const auto at = static_cast<std::size_t>(s);
    each[at] = equations_of(*sweeps[at], strokes[at], values, sums_N2[at]);
  });
  NormalEquations all;
  all.clear(problem.size());
  if (!problem.priors.empty()) all = prior_equations(problem, values);
  Certificate out;
  double sum_N2 = 0.0;
  for (std::size_t s = 0; s < sweeps.size(); ++s) {
    all.add(each[s]);
    sum_N2 += sums_N2[s];
    for (const StrokeRows& stroke : strokes[s]) out.samples += stroke.rows;
  }
  out.rms_N = out.samples > 0 ? std::sqrt(sum_N2 / double(out.samples)) : 0.0;
  const Eigen::MatrixXd square = all.square.selfadjointView<Eigen::Lower>();
  const Eigen::LDLT<Eigen::MatrixXd> solver(square);
  const Eigen::VectorXd step = solver.solve(-all.gradient);
  const Eigen::MatrixXd covariance =
      solver.solve(Eigen::MatrixXd::Identity(square.rows(), square.cols()));
  const Eigen::VectorXd deviation = covariance.diagonal().cwiseMax(1e-300).cwiseSqrt();
  out.largest_step = step.cwiseQuotient(deviation).cwiseAbs().maxCoeff();
  return out;
}

}  // namespace fitting
