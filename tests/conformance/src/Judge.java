import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.SingleValidationMessage;
import ca.uhn.fhir.validation.ValidationOptions;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Comparator;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;
import java.util.stream.Stream;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.CodeSystem;
import org.hl7.fhir.r4.model.StructureDefinition;
import org.hl7.fhir.r4.model.ValueSet;
import org.hl7.fhir.r5.utils.validation.constants.BestPracticeWarningLevel;

/**
 * Judges every JSON resource of a folder with the official validation engine and prints one line a message: file,
 * severity, id of the message, place and text, parted by tabs; at the end the number of resources judged.
 *
 * <p>Arguments: the folder with the service's own definitions, then the folders to judge. A resource with a profile
 * among the definitions is judged against it when its file is named {@code Something@profile-id.json}. Nothing reaches
 * the network: codes of outside systems that the engine does not hold are not checked.
 */
public final class Judge {
  private static final FhirContext R4 = FhirContext.forR4();
  private static final Map<String, String> PROFILES = new HashMap<>();

  public static void main(String[] arguments) throws Exception {
    FhirValidator engine = makeEngine(Path.of(arguments[0]));
    int judged = 0;
    for (String folder : List.of(arguments).subList(1, arguments.length)) {
      for (Path file : jsonFilesOf(Path.of(folder))) {
        report(file, engine);
        judged++;
      }
    }
    System.out.println("judged\t" + judged);
  }

  private static FhirValidator makeEngine(Path definitions) throws Exception {
    PrePopulatedValidationSupport own = new PrePopulatedValidationSupport(R4);
    for (Path file : jsonFilesOf(definitions)) {
      IBaseResource resource = R4.newJsonParser().parseResource(Files.readString(file));
      if (resource instanceof StructureDefinition || resource instanceof ValueSet || resource instanceof CodeSystem) {
        own.addResource(resource);
      }
      if (resource instanceof StructureDefinition profile) {
        PROFILES.put(profile.getIdElement().getIdPart(), profile.getUrl());
      }
    }
    ValidationSupportChain chain = new ValidationSupportChain(
        new DefaultProfileValidationSupport(R4),
        own,
        new CommonCodeSystemsTerminologyService(R4),
        new InMemoryTerminologyServerValidationSupport(R4),
        new SnapshotGeneratingValidationSupport(R4));
    FhirInstanceValidator checks = new FhirInstanceValidator(chain);
    checks.setBestPracticeWarningLevel(BestPracticeWarningLevel.Warning);
    return R4.newValidator().registerValidatorModule(checks);
  }

  private static List<Path> jsonFilesOf(Path folder) throws Exception {
    try (Stream<Path> files = Files.list(folder)) {
      return files.filter(file -> file.toString().endsWith(".json")).sorted(Comparator.naturalOrder())
          .collect(Collectors.toList());
    }
  }

  private static void report(Path file, FhirValidator engine) throws Exception {
    String name = file.getFileName().toString();
    ValidationOptions options = new ValidationOptions();
    if (name.contains("@")) {
      options.addProfile(PROFILES.get(name.substring(name.indexOf('@') + 1, name.length() - ".json".length())));
    }
    for (SingleValidationMessage message : engine.validateWithResult(Files.readString(file), options).getMessages()) {
      System.out.println(String.join("\t", name, message.getSeverity().getCode(),
          String.valueOf(message.getMessageId()), String.valueOf(message.getLocationString()),
          message.getMessage().replaceAll("\\s+", " ")));
    }
  }
}
