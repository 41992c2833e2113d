% Reads Springwright's files without Springwright, in Octave 7 or later: a sweep record's loop, and a fitted model's
% slow spring. What springwright_files.py does, and by the same law.
%
%   source springwright_files.m
%   draw("sweeps/larch.csv", "models/larch.json", "larch.png")
1;

% rows: M x 4 of time_s, stroke, travel_mm, force_N. about: the metadata's own part.
function [rows, about] = read_record(path)
  names = strsplit(fgetl_of(path), ",");
  table = dlmread(path, ",", 1, 0);
  column = @(name) table(:, strcmp(names, name));
  rows = [column("time_s"), column("stroke"), column("travel_mm"), column("force_N")];
  about = jsondecode(fileread([path "-metadata.json"])).springwright;
end

function line = fgetl_of(path)
  file = fopen(path);
  line = strtrim(fgetl(file));
  fclose(file);
end

% The model, with its law's values in SI under "SI".
function model = read_model(path)
  model = jsondecode(fileread(path));
  if (! model.usable)
    error("%s: the fit is marked as not usable", path);
  end
  units = {"1", 1; "N", 1; "s", 1; "mm", 1e-3; "cm3", 1e-6; "mm2", 1e-6; "kPa", 1e3; "N/bar", 1e-5; "N/mm", 1e3; ...
           "N s/m", 1; "mm/s", 1e-3};
  for each = model.law.values'
    model.SI.(each.name) = each.value * units{strcmp(units(:, 1), each.unit), 2};
  end
end

function value = field_or(from, name, fallback)
  value = fallback;
  if (isfield(from, name) && ! isempty(from.(name)))
    value = from.(name);
  end
end

function m = ramp_m(u)
  m = 0.5 * (u + sqrt(u .^ 2 + 5e-4 ^ 2));
end

% Newtons at each travel; circumstances as in the fitted sweeps.
function force = slow_spring_N(model, x, pressure_gauge_Pa, spacers)
  R = 287.05287;  % J/(kg K), ISO 2533
  p = model.SI;
  fork = model.fork;
  at = model.context;
  T = at.temperature_K;
  ambient = at.ambient_pressure_Pa;
  air = any(strcmp(fork.kind, {"air", "air_shock"}));
  legs = any(strcmp(fork.kind, {"air", "coil"}));
  circle = @(d) pi / 4 * d ^ 2;
  shaft = 0;
  force = p.preload + p.damper_gas * x / fork.travel_m;
  if (air)
    shaft = fork.air_spring.shaft_diameter_m;
    piston = circle(p.piston_diameter);
    annulus = piston - circle(shaft);
    V_p = @(x) p.positive_volume - spacers * p.spacer_volume - piston * x;
    V_n = @(x) p.negative_volume + annulus * x;
    pumped = pressure_gauge_Pa * p.pressure_scale + p.fill_error + ambient;
    low = max(p.transfer_travel - p.transfer_band / 2, 0);
    high = p.transfer_travel + p.transfer_band / 2;
    m_p = pumped * V_p(0) / (R * T);
    m_n = pumped * V_p(0) / V_p(low) * V_n(low) / (R * T);
    joined = min(x, high);
    share = V_p(joined) ./ (V_p(joined) + V_n(joined));
    sealed = x <= low;
    positive = (sealed .* m_p + ! sealed .* (m_p + m_n) .* share) * R * T ./ V_p(x);
    negative = (sealed .* m_n + ! sealed .* (m_p + m_n) .* (1 - share)) * R * T ./ V_n(x);
    force += (positive - ambient) * piston - (negative - ambient) * annulus;
  else
    force += p.coil_rate * x + p.added_rate * ramp_m(x - p.added_rate_from) - p.top_out_rate * ramp_m(p.top_out_travel - x);
  end
  if (legs)
    area = 2 * circle(field_or(fork.lower_legs, "stanchion_diameter_m", 0.034)) - circle(shaft) - p.damper_rod_area;
    V_l = @(x) p.lower_leg_volume - area * x;
    m_l = at.vented_pressure_Pa * V_l(at.vented_at_m) / (R * at.vented_temperature_K);
    force += (m_l * R * T ./ V_l(x) - ambient) * area;
  end
  bumper = field_or(fork, "bumper_m", 0.010);
  if (bumper > 0)
    force += p.bumper_force * max(0, (x - (fork.travel_m - bumper)) / bumper) .^ 2;
  end
end

% The loop as it was measured, and the model's slow spring at its setting.
function draw(record, fitted, path)
  [rows, about] = read_record(record);
  x = linspace(0, max(rows(:, 3)) / 1e3, 400)';
  force = slow_spring_N(read_model(fitted), x, about.setting.pressure_gauge_Pa, about.setting.spacers);
  figure("visible", "off");
  plot(rows(:, 3), rows(:, 4), x * 1e3, force, "k--");
  xlabel("travel (mm)");
  ylabel("force (N)");
  title(about.fork.name);
  legend("measured", "model: slow spring, no friction", "location", "northwest");
  print(path, "-dpng");
end
